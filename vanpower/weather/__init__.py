"""Weather of real and synthetic days: irradiance on each panel's plane and cell temperature, row by row.

`weather` turns whatever names a weather into one `WeatherSeries`: `typical_years` (TMY2, TMY3, EPW, PVGIS and NSRDB, by
pvlib), `logs` (a person's table), `measured` (Graz), `made_skies` and `parked` (these in mean sun time, for shadows);
`sun` has the one sun and clear sky that all of them use; `series` evens the steps and finds gaps, `files.clocks`
takes a written time apart, `days` picks, `upsample` refines, `planes` tilts. A row's time is the start of its step. A
day with a gap is refused when asked for by date and left out, with a note, where several are meant; up to 5 minutes
in a row and 15 a day are led in lines, with a note that bounds what it costs (`series.mended`). `sun_paths` holds a
person's log against the sun: light with the sun down is refused with the likely slip. Only wavering steps are
averaged, and that is said as well.

`fetched` asks a public service for a place's own year, only when told to, and `climate_band` tells clear, median and
dull days of a latitude without any file.

A made broken sky is a telegraph process (`made_skies._broken_index`). Against Graz, 1 July 2017 (20 seeds, median):
95 % of minutes jump less than 273 W/m² (measured 270), 99 % less than 466 (459); 22 % of minutes lie over 1.1 x clear
sky (20 %), the highest at 1.36 x (1.37 x). A mostly grey and a mostly sunny broken day differ from it, and no choice
is offered.
"""
