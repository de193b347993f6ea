"""An invented school, and a story of its people that runs over HTTP."""
