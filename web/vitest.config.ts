// SPDX-License-Identifier: Apache-2.0
import { defineConfig } from 'vitest/config';

// An address, not a name: a bare machine may not know "localhost".
export default defineConfig({ server: { host: '127.0.0.1' }, test: { include: ['test/**/*.test.{ts,tsx}'], environment: 'node' } });
