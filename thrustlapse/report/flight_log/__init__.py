"""A flight log beside the model: page, words and figure."""
