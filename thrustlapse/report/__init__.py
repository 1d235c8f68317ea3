"""What a person reads: figures, tables, a verdict and the page that carries them."""
