/**
 * A digitiser on a local TCP port that speaks SCPI, with faults on request.
 *
 * @module
 */

/** What the simulated instrument does wrong. */
export type Fault =
  | "none"
  | "ascii"
  | "indefinite block"
  | "short block"
  | "endless block"
  | "junk block"
  | "silent"
  | "error queue"
  | "bad interval"
  | "hang up"
  | "slow"
  | "stall later"
  | "hang up later"
  | "junk later";

/** A running simulated instrument. */
export interface SimulatedInstrument {
  readonly port: number;
  /** Every line received. */
  readonly received: string[];
  close(): Promise<void>;
}

/** Makes a definite-length block of IEEE 488.2 (8.7.9). */
export function block(body: Uint8Array): Uint8Array {
  const length = String(body.length);
  const head = new TextEncoder().encode(`#${length.length}${length}`);
  const bytes = new Uint8Array(head.length + body.length + 1);
  bytes.set(head);
  bytes.set(body, head.length);
  bytes[bytes.length - 1] = 10;
  return bytes;
}

/** Starts an instrument whose channel CH1 holds `samples`. */
export function simulateInstrument(
  samples: Float64Array,
  fault: Fault = "none",
): SimulatedInstrument {
  const listener = Deno.listen({ hostname: "127.0.0.1", port: 0 });
  const received: string[] = [];
  const body = new Uint8Array(samples.slice().buffer);
  const line = (text: string) => new TextEncoder().encode(`${text}\n`);
  /** Answers with samples so far. */
  let acquired = 0;
  const later = 3;
  let errors = fault === "error queue" ? ['-113,"Undefined header"'] : [];
  const answer = (command: string): Uint8Array | null => {
    switch (command) {
      case "*IDN?":
        return fault === "silent" ? null : line("teaching lab,simulated,0,1");
      case "*OPC?":
        return line("1");
      case "SENSe:SWEep:TINTerval?":
        return line(fault === "bad interval" ? "soon" : "2.0E-6");
      case "SYSTem:ERRor?": {
        const first = errors[0] ?? '+0,"No error"';
        errors = errors.slice(1);
        return line(first);
      }
      case "TRACe:DATA? CH1":
        acquired++;
        if (acquired > later && fault === "stall later") return null;
        if (acquired > later && fault === "junk later") return line("#xyz");
        switch (fault) {
          case "ascii":
            return line([...samples].join(","));
          case "indefinite block":
            return Uint8Array.from([35, 48, ...body, 10]);
          case "short block":
            return block(body.subarray(0, body.length - 3));
          case "endless block":
            return line("#9999999999");
          case "junk block":
            return line("#xyz");
          case "hang up":
            return block(body).subarray(0, 20);
          default:
            return block(body);
        }
      default:
        return null;
    }
  };
  const serve = async (socket: Deno.Conn) => {
    const decoder = new TextDecoder();
    let text = "";
    try {
      const buffer = new Uint8Array(4096);
      for (;;) {
        const count = await socket.read(buffer);
        if (count === null) break;
        text += decoder.decode(buffer.subarray(0, count), { stream: true });
        for (let at = text.indexOf("\n"); at >= 0; at = text.indexOf("\n")) {
          const command = text.slice(0, at).trim();
          text = text.slice(at + 1);
          received.push(command);
          const bytes = answer(command);
          if (bytes === null) continue;
          if (fault === "slow") await new Promise((r) => setTimeout(r, 40));
          if (fault === "hang up later" && acquired > later) {
            socket.close();
            return;
          }
          // In small pieces, as a slow network would.
          for (let from = 0; from < bytes.length; from += 1000) {
            await socket.write(bytes.subarray(from, from + 1000));
          }
          if (fault === "hang up" && command.startsWith("TRACe")) {
            socket.close();
            return;
          }
        }
      }
    } catch {
      // The other side went away.
    }
    try {
      socket.close();
    } catch {
      // Closed already.
    }
  };
  const running: Promise<void>[] = [];
  const accepting = (async () => {
    for await (const socket of listener) running.push(serve(socket));
  })().catch(() => {});
  return {
    port: (listener.addr as Deno.NetAddr).port,
    received,
    close: async () => {
      listener.close();
      await accepting;
      await Promise.all(running);
    },
  };
}
