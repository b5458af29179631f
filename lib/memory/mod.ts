/**
 * Arrays of millions of numbers: memory that is fast to touch for the first
 * time, that is copied with checkpoints, and that is let go of in time. Knows
 * nothing of what they hold.
 *
 * @module
 */
export { copyInto, copyOf, joinBytes, joinValues } from "./copy.ts";
export { makeRoom } from "./make_room.ts";
export { NumberList } from "./number_list.ts";
export { largePages } from "./large_pages.ts";
