"""Vans watched over months without a light meter: is it the array, or only a full battery, a dull month, the woods?

causes        What may be wrong with an array, and what each cause does to this rig's watts and volts in any light.
expectations  What a day would bring under each cause: watt-hours, highest watts and volts beside those of a sound clear
              day.
filtering     A Bayesian filter over causes, one step a day.
hiding        What these very days would have shown: causes and losses put into them, and the filter run again.
histories     What a controller remembers of each day, from files in any usual words, joined by date.
logs          A log of watts summed up by days: watt-hours, highest watts and volts, and minutes in which the battery
              took all.
parking       How a van may be parked, and what each way takes of a day: low sun hidden, trees, woods, and which way it
              faces.
practice      Practice: a sound history made up for any rig, and a fault put into it on a day, to see how long it hides.
skies         Skies of other places, from dawn to dusk, and the sun and air of a clear day at a latitude.
state         What is kept from one month to the next, in one small file: what was believed, and the last days.
stays         Where the van stood: a latitude for each day, and the days on which it moved; told, or worked out from the
              history.
telling       What is said of a watched van: as it should be, or since when, what, how sure, what else, and what to
              measure next.
"""
