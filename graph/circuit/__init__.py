"""The electric solve: networks, their least form, currents and voltages."""
