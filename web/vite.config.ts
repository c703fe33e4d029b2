// SPDX-License-Identifier: Apache-2.0
// One script, one style sheet, no file the page would have to inline: the server's content policy allows neither inline
// scripts nor style attributes.
import { defineConfig } from 'vite';

export default defineConfig({
  esbuild: { jsx: 'automatic', jsxImportSource: 'preact', legalComments: 'none' },
  build: {
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: false,
    reportCompressedSize: false,
    rollupOptions: { output: { entryFileNames: 'assets/app-[hash].js', assetFileNames: 'assets/[name]-[hash][extname]' } },
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8710' } },
});
