// Opens the floor's page without a network. The list of files to keep stands above, written by the desk from
// the same table as the page's own addresses. Nothing that is sent to the desk passes through here.

const CACHE = `floor-${KEPT.version}`;
const PAGES = 'floor-pages';
const PATIENCE_MS = 4000;

self.addEventListener('install', (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(KEPT.files)).then(() => self.skipWaiting()));
});

self.addEventListener('activate', (event) => {
  event.waitUntil(forgetOld().then(() => self.clients.claim()));
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin) return;
  if (url.pathname.startsWith('/floor/app/')) event.respondWith(kept(request));
  else if (request.mode === 'navigate' && url.pathname.startsWith('/floor/')) event.respondWith(page(request, url));
});

/** A page that was kept may still name files of the version before, so the last three versions stay. */
async function forgetOld() {
  const versions = (await caches.keys()).filter((name) => name.startsWith('floor-') && name !== PAGES);
  await Promise.all(versions.slice(0, -3).map((name) => caches.delete(name)));
}

async function kept(request) {
  const found = await caches.match(request);
  return found ?? fetch(request);
}

/** The page from the desk if it answers in time, else as it was kept. A revoked link is forgotten. */
async function page(request, url) {
  const pages = await caches.open(PAGES);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.ok) await pages.put(url.pathname, answer.clone());
    else if (answer.status === 404 || answer.status === 410) await pages.delete(url.pathname);
    else return (await pages.match(url.pathname)) ?? answer;
    return answer;
  } catch (error) {
    const found = await pages.match(url.pathname);
    if (found) return found;
    throw error;
  }
}
