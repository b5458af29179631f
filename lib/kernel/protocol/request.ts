import type { IncomingMessage } from "./message.ts";
import type { RoutedChannel } from "./transport.ts";

/** A request while it is served, and as the parent of what it causes. */
export interface Request {
  readonly message: IncomingMessage;
  readonly channel: RoutedChannel;
  /** Place in the order of arrival on its channel, from 1. */
  readonly arrival: number;
  /** Whether outputs are dropped. */
  silent: boolean;
  /** Whether the person interrupted it. */
  interrupted: boolean;
  /** Whether idle has been sent. */
  ended: boolean;
}
