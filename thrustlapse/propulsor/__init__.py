"""What pushes: inlet, rotor, duct, nozzle, motor and pack, matched to each other."""
