# One image for every part: docker-compose.yml says which part a container runs.
FROM python:3.11-slim

ENV PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 PIP_NO_CACHE_DIR=1 PATH=/app/.venv/bin:$PATH

RUN useradd --create-home --uid 10001 clearmere \
    && install --directory --owner=clearmere --group=clearmere --mode=700 /data

WORKDIR /app
COPY . .
RUN python -m venv .venv && .venv/bin/pip install -c constraints.txt -e . && python -m compileall -q /app

USER clearmere
ENV CLEARMERE_DATA=/data
VOLUME /data
EXPOSE 8000

CMD ["clearmere", "start"]
