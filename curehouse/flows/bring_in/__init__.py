"""Tables that people keep come into the house: looked at, checked, brought in whole or not at all."""
