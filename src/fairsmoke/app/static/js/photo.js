// Makes a picture small enough to be kept and sent: at most 2000 pixels a side, JPEG.
const MOST_PIXELS = 2000, QUALITY = 0.85;

/** Return the picture as it will be sent. Drawing it anew also leaves out where it was taken. */
export async function small(file) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, MOST_PIXELS / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return new Promise((resolve, reject) => {
    canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error("no picture"))), "image/jpeg", QUALITY);
  });
}
