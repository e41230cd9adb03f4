/* The CSRF header for htmx, and a plain line when a fragment cannot be had. Nothing else. */
document.addEventListener("htmx:configRequest", (event) => {
  const token = document.querySelector("meta[name=csrf-token]");
  if (token) event.detail.headers["X-CSRFToken"] = token.content;
});
for (const name of ["htmx:responseError", "htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(name, (event) => {
    const line = document.getElementById("wire-trouble");
    if (!line) return;
    const status = event.detail.xhr ? event.detail.xhr.status : 0;
    line.textContent = status
      ? `This part could not be renewed: the server answered ${status}. Reload the page to try again.`
      : "No connection to the server. What you typed is still here; try again in a moment.";
    line.hidden = false;
  });
}
