import { existsSync } from 'node:fs';
import { extname, join } from 'node:path';
import express, { Router } from 'express';
import { RequestError } from './request-error.ts';

/** The built client. Every address without a file ending is a page of the one application. */
export function pages(clientDirectory: string): Router {
  const router = Router();
  const index = join(clientDirectory, 'index.html');
  router.use('/assets', express.static(join(clientDirectory, 'assets'), { immutable: true, maxAge: '1y' }));
  router.use(express.static(clientDirectory, { index: false, maxAge: 0 }));
  router.get('/{*splat}', (request, response, next) => {
    if (extname(request.path) !== '') return next();
    if (!existsSync(index))
      return next(
        new RequestError(503, 'pages/not-built', 'The pages are not built. Start the server without --no-build.'),
      );
    response.set('Cache-Control', 'no-cache').sendFile(index);
  });
  return router;
}
