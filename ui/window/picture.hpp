// Pictures of the window as PNG files.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <string_view>

namespace sondeyard::ui {

// Writes the frame that has just been rendered (before the buffers are swapped, in the window's own context) as an
// 8-bit RGB PNG of width x height pixels. Written to a temporary name beside it first; a file that exists is never
// overwritten. Returns false and a sentence that names the file when it could not be written.
bool save_framebuffer_png(const std::filesystem::path& path, int width, int height, std::string& why_not);

// The same for pixels at hand: rows from the top, 3 bytes a pixel.
bool save_png(const std::filesystem::path& path, int width, int height, std::span<const unsigned char> rgb,
              std::string& why_not);

// A name in this folder that no file has yet: "stem.png", "stem-2.png", ... Characters of the stem that do not belong
// in a file name become '-'.
std::filesystem::path free_picture_path(const std::filesystem::path& folder, std::string_view stem);

} // namespace sondeyard::ui
