"""What must hold: one file a rule, its docstring the page that a user reads."""
