import { together } from "../together.ts";

await together(import.meta);
