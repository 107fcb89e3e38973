"""Worms, water, wires and units in numbers, each with its source. Pure: values in, values out."""
