"""Where the watts come from: motor, pack, and the drive that limits them."""
