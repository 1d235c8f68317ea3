"""When would it win, written up: who leads over airspeed and power, and with which designs."""
