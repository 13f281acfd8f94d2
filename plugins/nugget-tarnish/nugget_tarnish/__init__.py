"""Example of a nugget plugin with code: a contact law and damage limits."""
