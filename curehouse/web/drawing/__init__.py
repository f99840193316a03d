"""The house's own drawings: frozen figures in, escaped SVG out; no models, no clock."""
