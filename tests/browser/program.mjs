// SPDX-License-Identifier: Apache-2.0
// Starts the real program on a free loopback port over a copy of the demo loops and of those in loops/. HELMWATER_BIN names the program;
// HELMWATER_URL names one that already runs.
import { spawn } from 'node:child_process';
import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = fileURLToPath(new URL('../../', import.meta.url));
export const demo = join(root, 'data/demo');

const freePort = () => new Promise((done) => {
  const server = createServer().listen(0, '127.0.0.1', () => { const { port } = server.address(); server.close(() => done(port)); });
});

export async function startProgram() {
  if (process.env.HELMWATER_URL) return { url: process.env.HELMWATER_URL.replace(/\/$/, ''), stop: async () => {} };
  if (!process.env.HELMWATER_BIN) throw new Error('set HELMWATER_BIN to the built helmwater program, or HELMWATER_URL to one that runs');
  const data = mkdtempSync(join(tmpdir(), 'helmwater-page-'));
  for (const loop of ['north-bench', 'long-raft']) cpSync(join(demo, loop), join(data, loop), { recursive: true });
  for (const loop of ['with-fish', 'ripe']) cpSync(join(root, 'tests/browser/loops', loop), join(data, loop), { recursive: true });
  const port = await freePort();
  const child = spawn(process.env.HELMWATER_BIN, ['serve', '--data', data, '--port', String(port)], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (bytes) => { said += bytes; });
  const url = `http://127.0.0.1:${port}`;
  for (let k = 0; ; ++k) {
    if (child.exitCode !== null || k > 100) { child.kill(); throw new Error(`the program does not serve: ${said}`); }
    try { if ((await fetch(`${url}/api/health`)).ok) break; } catch { /* not yet */ }
    await new Promise((done) => setTimeout(done, 100));
  }
  return {
    url,
    stop: async () => {
      const ended = new Promise((done) => child.once('exit', done));
      child.kill('SIGTERM');
      await ended;
      rmSync(data, { recursive: true, force: true });
    },
  };
}
