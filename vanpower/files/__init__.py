"""The one door in and out: rigs as TOML files that one can edit and send to a friend, lists, and the examples.

atomic       Files written whole or not at all, and never over a file that is somebody else's or was changed by hand.
clocks       A written time taken apart: date and clock on one side, how far that clock is ahead of UTC on the other.
columns      What each kind of table may hold: its columns by name, unit and range, and how large it may be.
controllers  A list of controllers somebody may buy, as a table they fill in.
examples     Examples and generic parts that come with the kit.
messages     What to say when a file is wrong: what would make sense, and the likely slip.
my_van       One's own van: the file that form, pages and command line share, saved whole, with steps to take back.
reading      From a file, bytes, a text or a DataFrame to rows of cells: encoding, line ends, delimiter, quotes.
resources    Where the kit's own examples and measured days lie.
rig_files    A rig read from a file and written to one.
rig_forms    The tables a rig file may have; what their keys mean, the descriptions say themselves.
rig_tables   From tables to descriptions, with every problem noted at its line.
rows         Rows of cells out of a file's bytes, so many at once: delimiter, quotes, rows that end early.
stops        The stops of a trip read from a file.
tables       One reader for every table a person hands in: numbers, texts and times by the kit's names for their
             columns.
texts        From a path to text to tables; each way that fails is told in plain words.
times        Times of a table's rows, whichever of the usual forms they are written in.
typed        Plain data out of TOML or JSON to descriptions, held strictly to the types their fields are annotated
             with.
units        Units behind a column's name or a number, and the numbers in the units that are reckoned with.
"""
