/**
 * danfojs, which is large (380 MB with what it needs): fetched when it is first
 * used, as no other module names it in a form that is followed beforehand.
 *
 * @module
 */
export * from "npm:danfojs@1.1.2";
export { default } from "npm:danfojs@1.1.2";
