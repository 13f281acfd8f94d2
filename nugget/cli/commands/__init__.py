"""One module for each command; none knows another."""
