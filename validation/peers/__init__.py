"""Independent solutions of the same coupled problem: materials, contacts and circuit written anew."""
