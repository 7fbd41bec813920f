"""Bench timetable: who does what when."""
