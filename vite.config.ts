import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

export default defineConfig({
  root: 'client',
  plugins: [svelte({ configFile: false })],
  build: { outDir: '../dist/client', emptyOutDir: true, target: 'es2022', chunkSizeWarningLimit: 1200 },
  // `npm run dev` serves the pages here and passes everything else on to the server it starts beside it.
  server: {
    proxy: {
      '/socket.io': { target: process.env['ANTEROOM_DEV_SERVER'] ?? 'http://127.0.0.1:4310', ws: true },
      '/api': process.env['ANTEROOM_DEV_SERVER'] ?? 'http://127.0.0.1:4310',
    },
  },
});
