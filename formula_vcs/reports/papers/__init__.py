"""Documents of one version of a recipe, for the next desk."""
