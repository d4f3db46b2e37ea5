#include "field/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fstream>

namespace sondeyard::field {

namespace fs = std::filesystem;

std::string read_file(const fs::path& path, std::uintmax_t most_bytes, std::string_view wanted) {
    const auto refuse = [&](std::string_view what) {
        return FileError(fmt::format("{}: {}; {} is wanted", path.string(), what, wanted));
    };
    std::error_code error;
    const fs::file_status status = fs::status(path, error);
    if (fs::is_directory(status)) {
        throw refuse("this is a folder");
    }
    if (fs::exists(status) && !fs::is_regular_file(status)) {
        throw refuse("this is a device or a pipe");
    }
    std::ifstream in(path, std::ios::binary);
    if (!in) {
        throw FileError(fmt::format("{}: cannot be read: {}", path.string(), std::strerror(errno)));
    }
    std::string text;
    std::array<char, 65536> piece{};
    while (in.read(piece.data(), piece.size()) || in.gcount() > 0) {
        text.append(piece.data(), static_cast<std::size_t>(in.gcount()));
        if (text.size() > most_bytes) { // whatever size it says it has
            throw refuse(fmt::format("more than {} bytes, the most that is read", most_bytes));
        }
    }
    return text;
}

void write_new_file(const fs::path& path, std::string_view text) {
    const fs::path temporary = path.string() + fmt::format(".{}.part", ::getpid());
    const auto fail = [&] {
        const int error = errno;
        ::unlink(temporary.c_str());
        return FileError(fmt::format("{}: cannot be written: {}", path.string(),
                                     error == EEXIST ? "there is a file of this name already, and it is left alone"
                                                     : std::strerror(error)));
    };
    const int fd = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
    if (fd < 0) {
        throw fail();
    }
    std::FILE* file = ::fdopen(fd, "w");
    if (file == nullptr) {
        ::close(fd);
        throw fail();
    }
    const bool written = std::fwrite(text.data(), 1, text.size(), file) == text.size();
    if (std::fclose(file) != 0 || !written) {
        throw fail();
    }
    if (::renameat2(AT_FDCWD, temporary.c_str(), AT_FDCWD, path.c_str(), RENAME_NOREPLACE) == 0) {
        return;
    }
    // Some file systems cannot do that. A hard link never replaces either.
    if ((errno != EINVAL && errno != ENOSYS) || ::link(temporary.c_str(), path.c_str()) != 0) {
        throw fail();
    }
    ::unlink(temporary.c_str());
}

} // namespace sondeyard::field
