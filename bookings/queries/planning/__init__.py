"""What the solver of plans is given, read in a fixed number of queries for each kind."""
