// Gives the page where the back end cannot be reached, and the notes that are kept here.

const SHELL = "field-form-shell-1";
const NOTES = "field-form-notes";
const FILES = ["/", "/form.css", "/form.js", "/kept.js", "/sending.js", "/icon.svg"];

addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(SHELL).then((shell) => shell.addAll(FILES.map((file) => new Request(file, { cache: "reload" })))),
  );
  skipWaiting();
});

addEventListener("activate", (event) => {
  const drop = (names) => Promise.all(names.filter((n) => n !== SHELL && n !== NOTES).map((n) => caches.delete(n)));
  event.waitUntil(caches.keys().then(drop).then(() => clients.claim()));
});

addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/notes/")) event.respondWith(note(url.pathname));
  else if (FILES.includes(url.pathname)) event.respondWith(file(event, url.pathname));
});

async function note(path) {
  const notes = await caches.open(NOTES);
  const gone = { status: 404, headers: { "Content-Type": "text/plain; charset=utf-8" } };
  return (await notes.match(path)) ?? new Response("This note is not kept on this phone.\n", gone);
}

// What is kept comes at once; what is newer comes with the next opening.
async function file(event, path) {
  const shell = await caches.open(SHELL);
  const kept = await shell.match(path);
  const fresh = fetch(path, { cache: "no-cache" }).then(async (response) => {
    if (response.ok) await shell.put(path, response.clone());
    return response;
  });
  if (!kept) return fresh;
  event.waitUntil(fresh.catch(() => undefined));
  return kept;
}
