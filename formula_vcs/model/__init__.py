"""What a recipe, an ingredient, a step and a finding are: frozen values, no files, no git."""
