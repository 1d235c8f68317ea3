"""Open propellers: sections, blade elements, geometry, and the table of coefficients."""
