/** Runs tasks one after the other, in the order in which they were added. */
export class SerialQueue {
  #tasks: (() => Promise<void>)[] = [];
  #running = false;

  /** Adds a task; it must not reject. */
  add(task: () => Promise<void>): void {
    this.#tasks.push(task);
    if (!this.#running) void this.#run();
  }

  async #run(): Promise<void> {
    this.#running = true;
    while (this.#tasks.length > 0) {
      const tasks = this.#tasks;
      this.#tasks = [];
      for (const task of tasks) await task();
    }
    this.#running = false;
  }
}
