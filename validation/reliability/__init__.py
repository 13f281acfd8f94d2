"""How the program fails: what was tried against it, what held, what did not."""
