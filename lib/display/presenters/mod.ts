/**
 * The presenters of all kinds of result. Importing this registers them.
 *
 * @module
 */
export {};
