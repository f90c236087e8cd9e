"""Drawings as SVG text: connector faces and whole circuits, from the schematic alone."""
