"""vanpower: solar wiring studies for camper vans."""
