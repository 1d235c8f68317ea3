"""What the machine breathes: the atmosphere, and compressible relations of a perfect gas."""
