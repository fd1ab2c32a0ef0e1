// The program as somebody starts it, on a data folder of its own; and what it says to other
// programs of what it has saved.
import { spawn, spawnSync } from "node:child_process";
import { mkdirSync, readFileSync } from "node:fs";
import { createServer } from "node:net";
import { fail, until } from "./page_tools.mjs";

const BIN = process.env.BIN;
export const PACE = process.env.PACE || "16";
export const KEYS_PACE = process.env.PACE || "12";
const free = () => new Promise((done) => {
  const server = createServer().listen(0, "127.0.0.1", () => {
    const { port } = server.address();
    server.close(() => done(port));
  });
});

// What ends with this check, whatever becomes of it.
const started = new Set();
process.on("exit", () => { for (const child of started) child.kill("SIGKILL"); });

// Starts it, on the port it had before where it was started before.
export const program = async (data) => {
  mkdirSync(data, { recursive: true });
  const port = await free();
  const env = { ...process.env, TRUNDLE_SETTINGS: data + "/settings.toml", TRUNDLE_DATA: data };
  let child;
  const start = async () => {
    let said = "";
    const began = performance.now();
    const words = ["--data", data, "--port", String(port), "--no-browser"];
    child = spawn(BIN + "/trundle", words, { env, stdio: ["ignore", "pipe", "pipe"] });
    const own = child;
    started.add(own);
    for (const stream of [own.stdout, own.stderr]) {
      stream.on("data", (bytes) => { said += bytes; });
    }
    own.on("exit", () => started.delete(own));
    const link = () => /http:\/\/[^ \n]*\/join\/[0-9a-f]+/.exec(said);
    await until("the link to the page; it said: " + said, () => {
      if (own.exitCode !== null) fail("the program ended: " + said);
      return link();
    }, 60);
    return { link: link()[0], took: performance.now() - began };
  };
  const kill = async (signal) => {
    const ended = new Promise((done) => child.on("exit", done));
    child.kill(signal);
    await ended;
  };
  // What a command prints for other programs; a result that is flagged is one too.
  const json = (...words) => {
    const all = ["--data", data, ...words, "--json"];
    const { status, stdout, stderr } = spawnSync(BIN + "/trundle", all, { env, encoding: "utf8" });
    return status <= 1 ? JSON.parse(stdout) : fail(words.join(" ") + ": " + stderr);
  };
  const job = () => JSON.parse(readFileSync(data + "/job.json", "utf8"));
  return { start, kill, json, job, data, origin: "http://127.0.0.1:" + port };
};

// What the simulated wheel truly gives: the same tractor is driven by the simulator alone.
export const truth = (folder) => {
  const words = ["demo", "--inside", "--passes", "1", "--pace", "40", "--out", folder + "/demo"];
  const said = spawnSync(BIN + "/trundle", words, { encoding: "utf8" }).stdout;
  const found = /truly gives ([0-9.]+) impulses/.exec(said);
  return found ? Number(found[1]) : fail("no truth: " + said);
};
