"""The closed loop: hidden faults in simulated panels answer real sessions."""
