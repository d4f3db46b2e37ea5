#include "ui/window/picture.hpp"

#include <SDL_opengl.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <png.h>
#include <unistd.h>

#include <cerrno>
#include <csetjmp>
#include <cstddef>
#include <cstdio>
#include <cstring>
#include <memory>
#include <vector>

namespace sondeyard::ui {

namespace {

struct CloseFile {
    void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, CloseFile>;

// libpng reports through longjmp, so this function keeps nothing with a destructor between setjmp and the end.
bool encode(std::FILE* file, int width, int height, const unsigned char* rgb) {
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
    if (png == nullptr) {
        return false;
    }
    png_infop info = png_create_info_struct(png);
    if (info == nullptr || setjmp(png_jmpbuf(png)) != 0) {
        png_destroy_write_struct(&png, &info);
        return false;
    }
    png_init_io(png, file);
    png_set_compression_level(png, 6);
    png_set_IHDR(png, info, static_cast<png_uint_32>(width), static_cast<png_uint_32>(height), 8, PNG_COLOR_TYPE_RGB,
                 PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int row = 0; row < height; ++row) {
        png_write_row(png, rgb + static_cast<std::ptrdiff_t>(row) * width * 3);
    }
    png_write_end(png, nullptr);
    png_destroy_write_struct(&png, &info);
    return true;
}

std::string reason() { return std::strerror(errno); }

} // namespace

bool save_png(const std::filesystem::path& path, int width, int height, std::span<const unsigned char> rgb,
              std::string& why_not) {
    if (width <= 0 || height <= 0 ||
        rgb.size() < static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 3) {
        why_not = fmt::format("{}: a picture of {} x {} pixels cannot be made", path.string(), width, height);
        return false;
    }
    const std::filesystem::path temporary = path.string() + fmt::format(".{}.part", ::getpid());
    const int handle = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
    File file(handle >= 0 ? ::fdopen(handle, "wb") : nullptr);
    if (!file) {
        why_not = fmt::format("{}: cannot be written: {}", path.string(), reason());
        if (handle >= 0) {
            ::close(handle);
            ::unlink(temporary.c_str());
        }
        return false;
    }
    errno = 0;
    const bool written = encode(file.get(), width, height, rgb.data());
    const bool flushed = std::fclose(file.release()) == 0;
    if (!written || !flushed) {
        why_not =
            fmt::format("{}: writing failed: {}", path.string(), errno != 0 ? reason() : std::string("PNG error"));
        ::unlink(temporary.c_str());
        return false;
    }
    // A hard link fails when the name is taken, where a rename would overwrite.
    const bool linked = ::link(temporary.c_str(), path.c_str()) == 0;
    if (!linked && errno == EEXIST) {
        why_not = fmt::format("{}: exists already and is not overwritten", path.string());
        ::unlink(temporary.c_str());
        return false;
    }
    if (linked) {
        ::unlink(temporary.c_str());
        return true;
    }
    // Some file systems know no hard links.
    if (::access(path.c_str(), F_OK) == 0 || ::rename(temporary.c_str(), path.c_str()) != 0) {
        why_not = fmt::format("{}: cannot be written: {}", path.string(), reason());
        ::unlink(temporary.c_str());
        return false;
    }
    return true;
}

bool save_framebuffer_png(const std::filesystem::path& path, int width, int height, std::string& why_not) {
    if (width <= 0 || height <= 0) {
        why_not = fmt::format("{}: a picture of {} x {} pixels cannot be made", path.string(), width, height);
        return false;
    }
    const auto row_bytes = static_cast<std::size_t>(width) * 3;
    std::vector<unsigned char> from_below(row_bytes * static_cast<std::size_t>(height));
    glPixelStorei(GL_PACK_ALIGNMENT, 1);
    glReadPixels(0, 0, width, height, GL_RGB, GL_UNSIGNED_BYTE, from_below.data());
    if (const GLenum error = glGetError(); error != GL_NO_ERROR) {
        why_not = fmt::format("{}: the window's picture could not be read (OpenGL error {:#x})", path.string(), error);
        return false;
    }
    std::vector<unsigned char> rows(from_below.size());
    for (std::size_t row = 0; row < static_cast<std::size_t>(height); ++row) {
        std::memcpy(rows.data() + row * row_bytes,
                    from_below.data() + (static_cast<std::size_t>(height) - 1 - row) * row_bytes, row_bytes);
    }
    return save_png(path, width, height, rows, why_not);
}

std::filesystem::path free_picture_path(const std::filesystem::path& folder, std::string_view stem) {
    std::string clean;
    for (const char c : stem) {
        const bool fits =
            (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
        if (fits || (!clean.empty() && clean.back() != '-')) {
            clean += fits ? c : '-';
        }
    }
    while (!clean.empty() && clean.back() == '-') {
        clean.pop_back();
    }
    if (clean.empty()) {
        clean = "debrief";
    }
    std::filesystem::path path = folder / (clean + ".png");
    std::error_code ignored;
    for (int k = 2; std::filesystem::exists(path, ignored); ++k) {
        path = folder / fmt::format("{}-{}.png", clean, k);
    }
    return path;
}

} // namespace sondeyard::ui
