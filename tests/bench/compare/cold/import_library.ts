/** Loads the library and ends. */
import "fringebook";
