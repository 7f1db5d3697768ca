"""Numbers of physics that more than one soil module needs, each with its source."""

from __future__ import annotations

# Temperature of melting ice on the absolute scale [K]; by definition of the degree Celsius.
KELVIN_OF_ZERO_CELSIUS = 273.15
# Allen et al. 1998, FAO-56, eq. 39, takes 273.16; kept for its worked examples.
FAO56_KELVIN_OF_ZERO_CELSIUS = 273.16

# Stefan-Boltzmann constant [W m⁻² K⁻⁴]: SI 2019, from exact constants (from memory).
STEFAN_BOLTZMANN_W_M2_K4 = 5.670374e-8
# The same [MJ m⁻² d⁻¹ K⁻⁴] as printed: Allen et al. 1998, FAO-56, eq. 39.
STEFAN_BOLTZMANN_MJ_M2_D_K4 = 4.903e-9

# Allen et al. 1998, FAO-56, eq. 28: solar constant [MJ m⁻² min⁻¹].
SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
# Allen et al. 1998, FAO-56, eq. 20: latent heat of vaporization [MJ kg⁻¹], so 1 mm of water is 2.45 MJ/m².
LATENT_HEAT_MJ_KG = 2.45
