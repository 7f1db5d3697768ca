// Runs a program under MicroPython's own WebAssembly port. It asks the test by `js.ask(text)`, line by line.
// node run_micropython.mjs MICROPYTHON.mjs PROGRAM.py MODULE.py...

import fs from "node:fs";
import path from "node:path";

const [port, program, ...modules] = process.argv.slice(2);
const { loadMicroPython } = await import(port);

let rest = "";
globalThis.ask = (text) => {
  fs.writeSync(1, text + "\n");
  const buffer = Buffer.alloc(65536);
  while (!rest.includes("\n")) {
    try {
      const count = fs.readSync(0, buffer);
      if (count === 0) return "end";
      rest += buffer.toString("utf8", 0, count);
    } catch (error) {
      if (error.code !== "EAGAIN") throw error;
    }
  }
  const at = rest.indexOf("\n");
  const line = rest.slice(0, at);
  rest = rest.slice(at + 1);
  return line;
};

const micropython = await loadMicroPython({ stdout: (line) => fs.writeSync(2, line + "\n") });
for (const module of modules) {
  micropython.FS.writeFile(path.basename(module), fs.readFileSync(module));
}
micropython.runPython(fs.readFileSync(program, "utf8"));
