"""What a person writes: everyday units, the scenario file, its checks, the parts built from it."""
