/**
 * Arrays of millions of numbers: memory that is fast to touch for the first
 * time. Knows nothing of what they hold.
 *
 * @module
 */
export { largePages } from "./large_pages.ts";
