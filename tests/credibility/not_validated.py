"""What no check of this repository vouches for, in plain words. Keep it as true as the checks."""

NOT_VALIDATED = (
    "A whole small blower of known dimensions: none measured was at hand. A map from dimensions is "
    "held against large machines, against a whole 56 mm one whose dimensions were sought (at the "
    "narrow, strongly leaning end of what is usual: with usual ones the work would be 15 to 35 % "
    "too high), against the shape of a measured blower, and against catalogue units within a "
    "factor of three. At small size it is more likely to do too much work than too little.",
    "A whole small ducted fan: the axial model met one measured ducted propeller of 7 ft, at "
    "thirty times the size of a model's fan, and two of its choices were made after seeing that "
    "figure.",
    "Thrust against airspeed of any ducted machine of model size: the lapse is held against closed "
    "forms and one published lapse in coefficients.",
    "Motor, controller and pack on a bench: their laws are textbook laws, held against catalogue "
    "numbers only. Heating of windings and cells is not measured.",
    "The top speed, climb or endurance of any whole aircraft: no flight was measured. Textbook "
    "aircraft check the arithmetic, not the drag of a given airframe.",
    "Rotor strength: the disc formulas are exact for plain discs; the strengths and the share of "
    "them that a bladed wheel reaches are from memory. Nothing was burst.",
    "Inlet lips, ducts and nozzles of a given build: loss and discharge coefficients are inputs.",
    "Printed digits and closed forms prove that the arithmetic is right, not that a given machine "
    "obeys it: only the series of the figure compare with a real machine.",
)
