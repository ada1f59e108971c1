// Photographs, made small enough to be sent over a poor network. What the camera wrote
// beside the picture, a position among it, is left behind.
"use strict";

const widest = 2000, quality = 0.82;

// shrink is a picture as a JPEG of at most 2,000 pixels a side.
export async function shrink(file) {
  const picture = await createImageBitmap(file, {imageOrientation: "from-image"});
  const scale = Math.min(1, widest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
  return blob.arrayBuffer();
}

// draw shows a small one on a canvas.
export async function draw(jpeg, canvas) {
  const picture = await createImageBitmap(new Blob([jpeg], {type: "image/jpeg"}));
  canvas.width = 320;
  canvas.height = Math.max(1, Math.round(picture.height * 320 / picture.width));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
}
