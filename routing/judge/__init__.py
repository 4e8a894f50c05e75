"""Room of the judgement: what the results of the other rooms ask of pipe, ground and money.

``pressure_side`` judges ground and structures under static, surge and test pressures,
``fitting_side`` what vents and drains must serve; ``intake_side`` and ``energy_side`` the intake
and the energy of a year, which ``yield_side`` joins. Each takes results that ``study`` has, calls
the rooms that know the formulas, and returns one frozen value.
"""
