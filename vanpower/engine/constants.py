"""Constants of silicon and of standard test conditions, for the fit to the label and for the cells."""

BOLTZMANN_EV = 8.617333262e-5
# [eV/K] Boltzmann constant over elementary charge, exact in SI 2019 (CODATA), to ten digits; written out so that scipy
# stays unloaded
KELVIN = 273.15
# [K] 0 °C
TEMP_REFERENCE, T_REFERENCE = 25.0, 25.0 + KELVIN
# [°C, K] temperature of the standard test conditions and of every label, IEC 61215
LIGHT_REFERENCE = 1000.0
# [W/m²] light of the same
E_GAP, E_GAP_SLOPE = 1.121, -0.0002677
# [eV, 1/K] silicon's band gap at 25 °C and its relative slope; De Soto et al., Solar Energy 80 (2006) 78-88, eq. 11
