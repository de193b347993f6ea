"""What comes in from outside: an address is fetched, a file is expanded. Knows no table and no person."""
