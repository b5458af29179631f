import { describe, expect, it } from "vitest";
import { startTestKernel } from "../conformance/test_kernel.ts";

describe("comms", () => {
  it("are closed again on IOPub where nobody knows the target", async () => {
    await using test = await startTestKernel();
    const { published } = await test.client.request("comm_open", {
      comm_id: "c",
      target_name: "unknown",
      data: {},
    });
    expect(published.map(({ header }) => header.msg_type)).toEqual([
      "status",
      "stream",
      "comm_close",
      "status",
    ]);
    expect(test.log.join()).toMatch(/Nobody takes comms/);
  });

  it("are ignored with a line in the log where nobody knows the id", async () => {
    await using test = await startTestKernel();
    const { published } = await test.client.request("comm_msg", {
      comm_id: "lost",
      data: {},
    });
    expect(published.map(({ header }) => header.msg_type)).not.toContain(
      "comm_close",
    );
    expect(test.log.join()).toMatch(/No comm has the id 'lost'/);
  });

  it("are listed, all or by target", async () => {
    await using test = await startTestKernel();
    const all = await test.client.request("comm_info_request");
    expect(all.reply?.content["comms"]).toEqual({
      open: { target_name: "known" },
    });
    const none = await test.client.request("comm_info_request", {
      target_name: "other",
    });
    expect(none.reply?.content["comms"]).toEqual({});
  });
});
