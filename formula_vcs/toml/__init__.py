"""TOML to model and back: positions, quantities, layout, atomic writes."""
