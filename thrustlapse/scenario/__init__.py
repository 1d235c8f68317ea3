"""What a person writes: everyday units, the scenario file, its checks, and the parts built from it."""
