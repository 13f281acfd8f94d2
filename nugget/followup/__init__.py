"""What follows from one finished weld: for the next ones on the same cell, and for the joint in service."""
