"""Example scripts, each runnable by ``python -m nugget.examples.NAME``, and invented tables of trials."""
