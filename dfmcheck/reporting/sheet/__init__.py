"""The parts of the text report, from the sheet of paper to its sections."""
