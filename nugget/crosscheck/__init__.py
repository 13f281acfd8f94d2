"""A second opinion on one's own weld: charge and heat repeated with FiPy's terms and solvers.

What is taken from the march is the grid, the steps and the contacts (their covered share and their
resistances); properties, assembly, Joule heat, circuit and losses are written anew here and solved by
FiPy. FiPy is imported when a check runs, never before.
"""
