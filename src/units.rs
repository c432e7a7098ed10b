//! Units as people write them: reading text with a unit, showing a quantity in the unit of the user.
