"""The claims that a recipe states, each judged by its standard: it holds, it fails, or it needs information."""
