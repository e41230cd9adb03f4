/* A link to something folded away unfolds what it lies in, and shows it. */
function unfold() {
  const wanted = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  let fold = wanted && wanted.closest("details");
  if (!fold) return;
  for (; fold; fold = fold.parentElement.closest("details")) fold.open = true;
  wanted.scrollIntoView();
}
window.addEventListener("hashchange", unfold);
unfold();
