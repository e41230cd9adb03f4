/* The code that the camera read stands behind the # of the address, so that no server's log ever holds it. */
const field = document.querySelector("input[name=code]");
if (field && location.hash.length > 1) field.value = decodeURIComponent(location.hash.slice(1));
