/**
 * Arrays of millions of numbers: memory that is fast to touch for the first
 * time, and that is let go of in time. Knows nothing of what they hold.
 *
 * @module
 */
export { makeRoom } from "./make_room.ts";
export { largePages } from "./large_pages.ts";
