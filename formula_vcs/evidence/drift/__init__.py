"""How far a recipe has gone from a version that was tested: one module a kind of drift, measured end to end."""
