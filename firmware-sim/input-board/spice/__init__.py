"""The circuit simulated: decks made of the description, run by ngspice, judged in Python."""
