#include "ui/window/picture.hpp"

#include <doctest/doctest.h>
#include <png.h>
#include <unistd.h>

#include <fstream>
#include <iterator>
#include <string>
#include <vector>

using namespace sondeyard::ui;

namespace {

struct Folder {
    Folder() {
        std::string pattern = (std::filesystem::temp_directory_path() / "sondeyard-picture-XXXXXX").string();
        path = ::mkdtemp(pattern.data());
    }
    ~Folder() { std::filesystem::remove_all(path); }
    std::size_t files() const {
        return static_cast<std::size_t>(
            std::distance(std::filesystem::directory_iterator(path), std::filesystem::directory_iterator()));
    }
    std::filesystem::path path;
};

std::string content(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

} // namespace

TEST_CASE("a picture that was saved reads back pixel by pixel") {
    const Folder folder;
    constexpr int width = 7;
    constexpr int height = 5;
    std::vector<unsigned char> pixels(std::size_t{width} * height * 3);
    for (std::size_t k = 0; k < pixels.size(); ++k) {
        pixels[k] = static_cast<unsigned char>((k * 37) % 256);
    }
    std::string why_not;
    REQUIRE(save_png(folder.path / "a.png", width, height, pixels, why_not));
    CHECK(folder.files() == 1); // nothing temporary is left
    png_image image{};
    image.version = PNG_IMAGE_VERSION;
    REQUIRE(png_image_begin_read_from_file(&image, (folder.path / "a.png").c_str()) != 0);
    image.format = PNG_FORMAT_RGB;
    CHECK(image.width == width);
    CHECK(image.height == height);
    std::vector<unsigned char> back(PNG_IMAGE_SIZE(image));
    REQUIRE(png_image_finish_read(&image, nullptr, back.data(), 0, nullptr) != 0);
    CHECK(back == pixels);
}

TEST_CASE("a picture never overwrites a file, and says so") {
    const Folder folder;
    const std::filesystem::path file = folder.path / "mine.png";
    std::ofstream(file) << "something else";
    std::string why_not;
    const std::vector<unsigned char> pixels(12, 255);
    CHECK_FALSE(save_png(file, 2, 2, pixels, why_not));
    CHECK(why_not.find("mine.png") != std::string::npos);
    CHECK(why_not.find("not overwritten") != std::string::npos);
    CHECK(content(file) == "something else");
    CHECK(folder.files() == 1);
}

TEST_CASE("a picture that cannot be written is refused with its name and nothing left behind") {
    const Folder folder;
    std::string why_not;
    const std::vector<unsigned char> pixels(12, 255);
    CHECK_FALSE(save_png(folder.path / "no" / "such.png", 2, 2, pixels, why_not));
    CHECK(why_not.find("such.png") != std::string::npos);
    CHECK_FALSE(save_png(folder.path / "small.png", 20, 20, pixels, why_not));
    CHECK_FALSE(save_png(folder.path / "none.png", 0, 2, pixels, why_not));
    CHECK(folder.files() == 0);
}

TEST_CASE("a free name is made of plain characters and counts up past what is there") {
    const Folder folder;
    CHECK(free_picture_path(folder.path, "Behind the garage, 2/3").filename() == "Behind-the-garage-2-3.png");
    CHECK(free_picture_path(folder.path, "../..").filename() == "debrief.png");
    std::ofstream(folder.path / "debrief.png") << "x";
    std::ofstream(folder.path / "debrief-2.png") << "x";
    CHECK(free_picture_path(folder.path, "").filename() == "debrief-3.png");
}
