//! What leaves the program: the reference sheet.
